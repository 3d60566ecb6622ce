"""What tests share: rooms, slow independent answers, a browser, windows driven by a hand."""
