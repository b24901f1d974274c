"""Pots held against their sister pots: was one brewed wrong?"""
