"""Published check values recomputed on this machine: `bibula verify` and tests/validation share them."""
