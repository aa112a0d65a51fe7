"""How the documentation site is built: `make docs`, and with warnings as errors in `make test` (tools/make_site.py)."""

import breakangle

project = "Breakangle"
author = "the people who make Breakangle"
version = release = breakangle.__version__
language = "en"

exclude_patterns = ["_site"]
extensions = ["myst_parser"]
# Pages link to headings of each other as the files do on a code host, down to the fourth level.
myst_heading_anchors = 4
myst_enable_extensions = ["colon_fence", "deflist"]
# A link that leads nowhere is a warning, and a warning is an error.
nitpicky = True

html_theme = "furo"
html_title = "Breakangle"
html_theme_options = {"navigation_with_keys": True}
# Nothing is fetched from elsewhere when a page is read.
html_show_copyright = False
html_show_sphinx = False
html_copy_source = False
