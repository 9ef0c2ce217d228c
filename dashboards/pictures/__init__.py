"""The README's pictures of the pages, and the program that takes them; the pictures are not part of the wheel."""
