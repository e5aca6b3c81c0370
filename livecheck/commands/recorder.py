def register(c): pass
