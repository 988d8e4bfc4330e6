"""What is printed: labels, hand-over sheets, summaries, as PDF."""
