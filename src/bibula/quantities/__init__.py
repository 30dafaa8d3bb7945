"""What every number and every error is: values with unit, uncertainty and origin; one tree of errors."""
