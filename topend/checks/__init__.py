"""Findings: what is wrong or risky in a top end, with the figure, the limit, and where the limit comes from."""

from topend.checks.added import findings

__all__ = ["findings"]
