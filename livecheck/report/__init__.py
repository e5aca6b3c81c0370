"""What is read at leisure: the review as text and as a page, charts, tablature. Pure: values in,
text out."""
