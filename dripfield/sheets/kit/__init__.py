"""What every sheet is drawn with: papers, pens, labels, map, furniture, cautions."""
