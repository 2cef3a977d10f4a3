"""cutjob: from parametric designs of small wooden goods to proven cutting files."""

__version__ = "0.1.0"
