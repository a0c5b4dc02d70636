"""Checks a finished plan against the inputs and the hourly series, without the program's code."""

from overwinter.audit.audit import audit
from overwinter.audit.report import AuditReport, Finding, Rule, TreeMargin

__all__ = ["AuditReport", "Finding", "Rule", "TreeMargin", "audit"]
