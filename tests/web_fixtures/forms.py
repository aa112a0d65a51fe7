"""The forms of a page as a browser would send them."""

import html
import re

FIELD = re.compile(r'<input type="hidden" name="(\w+)" value="([^"]*)">')


def hidden_fields(page: str, action: str) -> dict[str, str] | None:
    """Return the hidden fields of the form that posts to `action`; None where there is no such form."""
    form = re.search(rf'<form method="post" action="{action}">.*?</form>', page, re.DOTALL)
    return None if form is None else {name: html.unescape(value) for name, value in FIELD.findall(form[0])}
