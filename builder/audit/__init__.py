"""Compares a filled workbook with the edition it claims."""

from builder.audit.finding import Finding
from builder.audit.quick import changed_formulas

__all__ = ["Finding", "changed_formulas"]
