"""What went with the making: lots within make as the error."""
