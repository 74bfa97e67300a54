"""The engine: from specs to a workbook, its editions, and what comes back. It knows no trade."""
