"""What the import, line and recipe pages do on disk: kept files with versions, and jobs in folders of their own."""
