"""The screens: each a frozen value with a view and a reaction."""
