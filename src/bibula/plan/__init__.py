"""A plan: one object, its stages and stacks, its room and target, and what forbids it."""
