"""What a job takes and costs: machine time, boards used, and each item's share of them."""
