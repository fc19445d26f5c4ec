"""What a study is answered with: the closest formula, judged and rounded, and why it is not closer."""
