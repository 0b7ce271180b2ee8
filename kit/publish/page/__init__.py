"""The lesson's page: what students see, hear and practise with in a browser."""
