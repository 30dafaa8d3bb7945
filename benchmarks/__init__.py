"""How fast Bibula is, measured here and now: `python -m benchmarks [--json] [--plot FOLDER] [NAME ...]`.

Absolute times stand beside a yardstick of the machine's speed taken in the same run; ratios are of
runs that take turns. Nothing here is a test: a slow machine fails no build.
"""
