// The one setting of fhirclient that the handshake needs; its lists of resource types serve the chart reader only.
exports.SMART_KEY = "SMART_KEY";
