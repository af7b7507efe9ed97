import type { Sender } from '../../papers/sender.js';
import type { Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';

/** Who a paper comes from, as far as the owner has said. */
export async function letterhead(stores: Stores): Promise<Sender> {
  const { businessName, officePhone, businessAddress, licence } = (await ownerSettings(stores)).papers;
  const said = (words: string) => words.trim() || null;
  return {
    businessName: businessName.trim(),
    officePhone: said(officePhone),
    businessAddress: said(businessAddress),
    licence: said(licence),
  };
}
