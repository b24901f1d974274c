"""Do two products differ, do they match, or can the answers not tell?"""
