"""What happened: build record, text, review page."""
