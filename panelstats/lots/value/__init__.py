"""Do the scores carry a price, or another value of the lots?"""
