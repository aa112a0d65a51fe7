"""One service file: read, checked, estimated, planned, predicted and written; no shop is needed."""
