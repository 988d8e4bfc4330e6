"""What is stored of accounts."""
