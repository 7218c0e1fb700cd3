"""What is printed and read: a paper of plain blocks, shown as one HTML page or set as a PDF.

`blocks` and `chart` are what a paper is made of; `html` and `svg` show it on a page, `typeset` and `sheet.typ` set it
on sheets.
"""
