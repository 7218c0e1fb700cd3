"""Trends over many jobs: time by stage, findings per hundred jobs, tools that drift, figures by part number, comebacks.

Each module asks the index's tables in SQL about the jobs that the filters want and gives frozen rows; `sheets` makes
tables and pictures of them.
"""
