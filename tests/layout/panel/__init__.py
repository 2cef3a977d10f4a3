"""Tests of filled panels."""
