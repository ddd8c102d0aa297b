"""Pages and pictures for afterwards: pure text from what was driven and said. It writes no file and knows no clock."""
