"""What a crew that follows a field plan would lay: simulated with its tools' errors, and measured.

Nothing of how marks were chosen is used or known here but the rows that the crew is handed.
"""
