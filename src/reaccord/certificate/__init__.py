"""Certificates: a proof of closeness that anyone can check with fractions alone.

`format`, `maxima`, `column`, `leaf` and `verify` are the file and its check: standard library only; read these five to
judge a proof. The rest makes certificates. `number` and `restate` state a study in fractions, `stated` any programme,
`origin` compares a certificate with a study; `repair` makes a formula hold its limits exactly; `duals`, `cardinality`,
`branch` and `prove` grow the tree; `write` puts them together.
"""
