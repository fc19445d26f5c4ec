"""What is asked beside the closest formula."""
