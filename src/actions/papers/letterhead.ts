import type { Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';

/** Who a paper comes from, as far as the owner has said. */
export interface Letterhead {
  businessName: string;
  officePhone: string | null;
}

export async function letterhead(stores: Stores): Promise<Letterhead> {
  const { businessName, officePhone } = (await ownerSettings(stores)).papers;
  return { businessName: businessName.trim(), officePhone: officePhone.trim() || null };
}
