"""Do lots match their standard?"""
