"""Evaluation pictures drawn from a seed, with their truth, and the figures measured on them."""
