"""What people write: YAML files with places, kinds of fields, and faults told in words.

Recipes and groove files are both read here. ``yaml_source.py`` reads text and needs no pydantic;
``field_kinds.py`` is what models are declared with, ``messages.py`` validates a file by a model.
"""
