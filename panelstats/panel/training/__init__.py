"""When a trainee's scores may count."""
