"""What is generated from the declarations of the keys: starter, page of keys, JSON Schema.

``python -m dripfield.site.reference`` writes them anew.
"""
