"""Looking after a lone mechanic: `state` and its `changes`, `acts` and checks, `words`, and how long each part takes."""
