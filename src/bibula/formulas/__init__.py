"""Short pure functions, one cited equation each."""
