"""Who is who: the built-in constituents, the study's own, and how a name finds its substance."""
