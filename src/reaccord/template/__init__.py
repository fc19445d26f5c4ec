"""The study that `reaccord new` writes. All numbers in it are invented."""
