"""What a crash leaves behind: site and database killed in the middle of each act."""
