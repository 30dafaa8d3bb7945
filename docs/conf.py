"""How Sphinx builds these pages: python3 start.py test builds them, and a warning is a failure."""

project = "Bibula"
copyright = "2026, The Bibula authors"
extensions = ["myst_parser", "sphinx.ext.mathjax", "sphinxcontrib.bibtex"]
myst_enable_extensions = ["dollarmath"]
myst_heading_anchors = 3
bibtex_bibfiles = ["references.bib"]
html_theme = "alabaster"
html_title = "Bibula"
html_show_sourcelink = False
html_theme_options = {"page_width": "1230px", "body_max_width": "auto"}  # outputs are 92 columns wide
