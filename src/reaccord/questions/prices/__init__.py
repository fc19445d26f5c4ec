"""What each limit costs and what would help: every figure solved again from the answer at hand."""
