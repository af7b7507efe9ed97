import { theirs, type Words } from './paper.js';

/** Who a paper comes from; null or empty: the owner has not said. */
export interface Sender {
  businessName: string;
  officePhone: string | null;
  businessAddress: string | null;
  /** Number of the licence or registration of the business. */
  licence: string | null;
}

/** The line above a client's heading. */
export function fromWords({ businessName, businessAddress, officePhone }: Sender): Words {
  const parts: Words[] = [
    ...(businessName === '' ? [] : [[theirs(businessName)]]),
    ...(businessAddress === null ? [] : [[theirs(businessAddress)]]),
    ...(officePhone === null ? [] : [['office ', theirs(officePhone)]]),
  ];
  return parts.flatMap((part, i) => (i === 0 ? part : [' · ', ...part]));
}
