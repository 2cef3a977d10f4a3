"""booklet.pdf: how to make an item by hand, for a helper, or to sell as a plan; it shows nothing of the shop's costs.

    contents.py   a job's result to what the booklet says of each item: sizes, wood, things to buy, parts, steps
    pages.py      headings, texts, tables, pictures and steps onto pages, one below the other
    booklet.py    the booklet: a cover, a chapter for each item, and the templates at true size after them

The templates are the pages of patterns.pdf (output/paper/book.py), and the proof judges them like those.
"""
