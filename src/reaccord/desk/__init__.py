"""The live page: a local server over one study, each of whose limits can be moved."""
