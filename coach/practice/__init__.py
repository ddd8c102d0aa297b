"""What each stage of practice asks of a driver, and by what evidence the next one is earned. Pure."""
