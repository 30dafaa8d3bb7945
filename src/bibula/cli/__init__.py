"""The command line: thin, calls the same functions as everybody else."""
