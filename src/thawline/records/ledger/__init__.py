"""What is stored of ledger."""
