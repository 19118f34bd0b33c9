"""What was laid, from shots on it: record and ties."""
