"""A finished job to plan.json: the only module of the way out that knows its keys."""
