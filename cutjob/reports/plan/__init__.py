"""A finished job to plan.json: only these modules know its keys when writing."""
