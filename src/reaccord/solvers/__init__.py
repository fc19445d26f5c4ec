"""Solvers: a stated programme in, an answer out. Three doors with one contract (`reaccord.contract`)."""

import numpy as np

# The C library gives every block of over 128 kB back to the system and asks for it again, page by page, until a larger
# one was freed: it keeps blocks up to that size from then on. A sixth of a search by HiGHS went into that.
np.empty(2**20)
