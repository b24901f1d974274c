"""A blend week after week against its sealed master."""
