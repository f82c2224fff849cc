"""One file a change, in order. A file that was released is never changed."""
