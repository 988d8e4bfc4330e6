"""The pages: for a phone held in one hand."""
