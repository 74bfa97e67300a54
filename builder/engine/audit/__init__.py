"""Compares a filled workbook with the edition it claims."""

from builder.engine.audit.finding import Finding
from builder.engine.audit.quick import changed_formulas

__all__ = ["Finding", "changed_formulas"]
