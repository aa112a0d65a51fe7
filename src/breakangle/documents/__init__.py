"""What is put on paper: sheets, labels, drawings, templates at true size; plain data first, renderers beside it."""
