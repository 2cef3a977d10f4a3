"""Reads plan.json back, for files judged on their own: every value is checked, and each fault is named with its
place.
"""
