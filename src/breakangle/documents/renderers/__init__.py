"""Page and drawing to PDF, HTML, text, SVG and DXF; fonts and typesetting."""
