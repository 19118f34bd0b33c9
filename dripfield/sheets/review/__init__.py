"""The reviewer's sheets: comparison and record as PDF, page, tables and drawing."""
