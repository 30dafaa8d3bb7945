"""The one-dimensional coupled heat and moisture core: a stack in, fields and balances out."""
