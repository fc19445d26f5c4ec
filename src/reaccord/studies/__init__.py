"""Questions beyond the closest formula: what is cheapest, how cost trades against closeness."""
