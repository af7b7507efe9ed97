/** A problem file that cannot be read; the message says where, what was wrong and what would be right. */
export class RoutingFileFault extends Error {}
