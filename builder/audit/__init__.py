"""Compares a filled workbook with the edition it claims."""

from builder.audit.computing import changed_formulas
from builder.audit.finding import Finding

__all__ = ["Finding", "changed_formulas"]
