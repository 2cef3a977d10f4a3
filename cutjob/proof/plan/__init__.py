"""plan.json read back, for files judged on their own: every value checked, each fault with its place."""
